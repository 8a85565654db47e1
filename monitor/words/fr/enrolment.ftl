# La fiche d’une carte, et ce qu’il faut pour qu’une carte soit reçue.


## La fiche : ce qui ne va pas

a-card = une fiche
a-list-of-sensors-each-once = une liste de capteurs, chacun une fois
a-sensor = un capteur
add-option-or-leave-the-probes-out = ajouter { $option }, ou laisser les sondes de côté
an-authority-that-is-valid-today = une autorité valable aujourd’hui
at-most-most-bytes = { $most } octets au plus
at-most-most-names-of-at-most-16-letters-digits-dots-dashes-underscores-each-once = au plus { $most } noms d’au plus 16 lettres, chiffres, points, traits d’union, tirets bas, chacun une fois
copy-the-whole-card-again-from-its-first-opening-to-its-last-closing = copier de nouveau toute la fiche, de son premier { $opening } à son dernier { $closing }
cut-off-count-characters-without-its-beginning-or-end = coupée : { $count } signes, sans son début ou sa fin
damaged-count-characters-that-are-no-json = abîmée : { $count } signes qui ne sont pas du JSON
empty-or-8-to-63-plain-letters-digits-and-signs = vide, ou 8 à 63 lettres sans accent, chiffres et signes
empty-or-a-certificate-in-base64 = vide, ou un certificat en base64
every-key-of-a-card = toutes les clés d’une fiche
give-the-board-fewer-addresses-sensors-or-probes = donner à la carte moins d’adresses, de capteurs ou de sondes
it-is-no-text = ce n’est pas du texte
make-the-card-again-command = refaire la fiche : { $command }
measured-by-count-sensors-of-one-board = mesuré par { $count } capteurs d’une même carte
name-at-least-one-sensor-with-option = nommer au moins un capteur avec { $option }
write-the-type-of-the-part-ds18b20-is-the-steel-probe-on-a-cable-for-substrate-sht3x-sht4x-and-bme280-measure-air-with-and-its-address-where-that-is-not-the-usual-one = écrire le type de la pièce : ds18b20 est la sonde en acier au bout d’un câble, pour le substrat ; sht3x, sht4x et bme280 mesurent l’air ; avec @ et son adresse là où ce n’est pas l’habituelle
name-it-once-several-one-wire-probes-hang-on-one-pin-and-get-names-as-probes = le nommer une seule fois ; plusieurs sondes à un fil pendent à une même broche et reçoivent des noms de sondes
named-count-times = nommé { $count } fois
names-or-addresses-of-this-computer-at-most-most = des noms ou adresses de cet ordinateur, { $most } au plus
one-line-of-json = une ligne de JSON
one-sensor-at-each-address = un capteur à chaque adresse
one-sensor-for-each = un capteur pour chaque grandeur
probes-of-a-one-wire-thermometer-name = les sondes d’un thermomètre à un fil ({ $name })
s-1-to-most-printable-letters-without-blanks = 1 à { $most } signes imprimables, sans espace
set-the-address-pin-of-one-of-them-see-the-wiring-and-name-it-such-as-example = régler la broche d’adresse de l’un des deux (voir le câblage) et le nommer par exemple { $example }
set-the-clock-of-this-computer-if-it-is-wrong-else-make-the-certificates-anew-setup-and-then-a-new-card-for-each-board-card = régler l’heure de cet ordinateur si elle est fausse ; sinon refaire les certificats ({ $setup }), puis une nouvelle fiche pour chaque carte ({ $card })
size-bytes = { $size } octets
something-else = autre chose
something-in-the-card-was-changed-remedy = quelque chose a changé dans la fiche ; { $remedy }
take-one-of-them-to-a-board-of-its-own-or-name-the-probes-of-the-thermometer = mettre l’un d’eux sur une carte à part, ou donner des noms aux sondes du thermomètre
the-i2c-address-address = l’adresse I2C { $address }
the-list-of-probes = la liste des sondes
the-list-of-sensors = la liste des capteurs
the-name-of-a-network-at-most-most-bytes = le nom d’un réseau, { $most } octets au plus
this-card-is-for-another-site-take-one-that-was-made-here-command = cette fiche est pour un autre site ; en prendre une qui a été faite ici : { $command }
unknown = inconnu
valid-from-first-to-last = valable du { $first } au { $last }
why-remedy = { $why } ; { $remedy }

## Le programme des cartes

file-cannot-be-compiled-why = { $file } ne se laisse pas compiler : { $why }
folder-cannot-be-written-why = { $folder } ne peut pas être écrit : { $why }
folder-holds-other-files-files-and-nothing-was-copied-name-a-new-folder = { $folder } contient d’autres fichiers ({ $files }), et rien n’a été copié ; nommer un nouveau dossier
folder-is-a-file-name-a-folder = { $folder } est un fichier ; nommer un dossier
the-board-program-is-not-here-there-is-no-folder-folder-install-this-program-again = le programme des cartes n’est pas là : il n’y a pas de dossier { $folder } ; installer de nouveau ce programme

## Ce qui a été fait

board-done_add = { $node } est dans les réglages ({ $place }), a un compte chez le courtier et une fiche.
board-done_card = { $node } a une nouvelle fiche. Avec celle d’avant, il n’entre plus.
board-done_replace = Une autre carte peut prendre la place de { $node } ({ $place }) avec cette fiche. L’ancienne n’entre plus, et ses relevés restent.
board-removed = { $node } n’est plus ni dans les réglages ni chez le courtier, et sa fiche est effacée. Ce qu’elle a mesuré reste.
board-unguards = { $place } n’est plus gardé : aucune autre carte n’y est.
board-would_unguard = Sans elle, aucune carte ne garde { $place }.
board-unmeasured = { $place } : aucune carte n’y mesure : { $quantity }. Rien de ce qui en dépend n’est gardé.
board-card_file = La fiche : { $file }
board-proven = Le courtier a relu ses comptes et laisse entrer { $node }.
board-reload = Le courtier ne le sait pas encore : il ne marche pas, ou cet utilisateur ne peut pas le lui dire. Lancer : { $command }
board-reload_monitor = Le moniteur en marche est à un autre utilisateur et n’a pas relu les réglages. Lancer : sudo systemctl reload rearing-monitor
board-still_connected = Personne n’a pu s’assurer que la connexion ouverte de { $node } prend fin. La couper en redémarrant le courtier : sudo systemctl restart mosquitto
board-broker_silent = Rien ne répond au port { $port } du courtier : personne n’a pu essayer s’il laisse entrer la carte. Le démarrer : sudo systemctl start mosquitto
board-asks_broker = On attend la réponse du courtier au port { $port }, au plus un quart de minute …
board-ask_wifi = Nom du Wi-Fi des cartes (2,4 GHz ; vide : chaque carte le demande) :
board-ask_password = Mot de passe du Wi-Fi « { $wifi } » (il ne s’affiche pas) :
board-ask_remove = Enlever { $node } ? [o/N]


## Sa fiche

board-paste = Sa fiche, une ligne à coller dans la page de mise en route de la carte :
board-scan = La lire avec un téléphone, copier le texte, rejoindre le Wi-Fi que la carte ouvre, et l’y coller.
board-too_narrow = Le code QR demande { $columns } colonnes ; élargir le terminal, ou le voir sur la page, sous Cartes.
board-secret = La fiche contient un mot de passe. Qui l’a peut émettre au nom de cette carte : ne la montrer à personne, et ne pas l’envoyer par courriel.
board-next = Ensuite : alimenter la carte, rejoindre le Wi-Fi « board-new » qu’elle ouvre, y ouvrir http://192.168.4.1 et coller la fiche. Une carte qui avait déjà une fiche n’ouvre son Wi-Fi, « board- » et son ancien nom, que si l’on appuie sur BOOT dans les deux secondes après la mise sous tension.


## Jusqu’où elle est venue

board-step_stopped = Le moniteur ne marche pas : personne n’entendrait { $node }. Le démarrer : rearing-monitor run
board-step_away = Le moniteur marche mais n’est pas relié au courtier. Voir pourquoi : rearing-monitor check --broker
board-step_unseen = En attente. Personne n’a vu { $node } se présenter au courtier. Regarder son alimentation, le Wi-Fi (2,4 GHz seulement), et si toute la fiche a été collée.
board-step_wrong_card = Le courtier a refusé quelqu’un à { $why }, qui n’a pas le bon nom ou mot de passe. Si c’est { $node }, elle a une fiche plus ancienne : coller la plus récente, ou la refaire : rearing-monitor board card { $node }
board-step_no_trust = Quelqu’un à { $why } ne croit pas le certificat du courtier. Si c’est { $node }, sa fiche est d’une autre autorité : la refaire : rearing-monitor board card { $node }
board-step_logged_in = { $node } s’est présentée et n’a encore rien envoyé. Sa première mesure vient dans son intervalle ; sinon aucun capteur ne lui répond.
board-step_refused = { $node } envoie, et ce qu’elle envoie est refusé : { $why }
board-step_heard = Reçue : { $node } envoie.
board-value = { $what } : { $value } ({ $place })
board-not_heard = Attendu et pas encore reçu : { $names }
board-not_expected = Envoyé, mais pas dans les réglages : { $names }
board-later = On peut l’accrocher à tout moment ; voir si elle est reçue : { $command }
board-without_card = sans fiche
board-without_user = le courtier ne la connaît pas
board-planned =
    { $count ->
        [one] Prévue dans les réglages, pas encore là : { $boards }
       *[other] Prévues dans les réglages, { $count } cartes pas encore là : { $boards }
    }
board-planned_do = Quand vous en avez une : rearing-monitor board add NOM. Une que vous n’aurez pas : rearing-monitor board remove NOM


## Le programme des cartes : ce qui a été copié

board-files_compiled =
    { $count ->
        [one] { $count } fichier dans { $folder }, compilé d’avance, { $size } octets :
       *[other] { $count } fichiers dans { $folder }, compilés d’avance, { $size } octets :
    }
board-files_plain =
    { $count ->
        [one] { $count } fichier dans { $folder }, en texte (mpy-cross n’est pas installé), { $size } octets :
       *[other] { $count } fichiers dans { $folder }, en texte (mpy-cross n’est pas installé), { $size } octets :
    }
board-files_next = Par USB : { $command }
board-files_older = Une carte qui les a en texte continuerait avec ceux-là ; les enlever d’abord : { $command }


## Ce qui ne va pas

a-board-on-battery-sleeps-between-two-rounds = une carte sur batterie dort entre deux mesures
at-most-16-letters-digits-dots-dashes-underscores = au plus 16 lettres, chiffres, points, traits d’union, tirets bas
at-most-most-names-each-once = au plus { $most } noms, chacun une fois
file-the-lines-of-node-are-not-written-as-a-nodes-table-take-them-out-by-hand = { $file } : les lignes de { $node } ne sont pas écrites comme une table [[nodes]] ; les enlever à la main
folders-cannot-be-written-by-this-user-and-nothing-was-changed-to-mend-run-command = { $folders } ne peut pas être écrit par cet utilisateur, et rien n’a été changé. Pour y remédier, lancer : { $command }
name-was-left-as-it-is-say-option-to-remove-it = { $name } est restée telle quelle ; dire { $option } pour l’enlever
none-yet-add-one-to-the-settings = aucun encore ; en ajouter un aux réglages
s-1-sends-each-round-at-once-more-saves-the-battery = 1 envoie chaque mesure aussitôt ; plus ménage la batterie
no-name-or-address-is-known-at-which-boards-find-this-computer-name-it-in-file-line = on ne connaît aucun nom ni adresse où les cartes trouvent cet ordinateur ; l’écrire dans { $file } : { $line }
say-where-it-hangs-with-option = dire où elle pend avec { $option }
seconds-s = { $seconds } s
the-broker-read-its-users-again-and-still-refuses-user-why-everything-was-put-back-as-it-was-to-mend-command = le courtier a relu ses comptes et refuse toujours { $user } ({ $why }) ; tout a été remis comme avant. Pour y remédier : { $command }
the-broker-was-not-set-up-for-boards-yet-it-cannot-tell-them-apart-to-mend-setup = le courtier n’est pas encore préparé pour les cartes : il ne peut pas les distinguer. Pour y remédier : { $setup }
the-card-of-name-is-gone-file-and-with-it-what-its-sensors-are-name-them-again-with-option = la fiche de { $name } n’est plus là ({ $file }), et avec elle ce que sont ses capteurs ; les nommer de nouveau avec { $option }
the-name-of-a-probe = le nom d’une sonde
the-name-of-the-wi-fi = le nom du Wi-Fi
the-password-of-the-wi-fi = le mot de passe du Wi-Fi
the-place = le lieu
there-is-a-board-name-already-choose-another-name-or-give-that-one-a-new-card-card-the-same-board-replace-another-board-in-its-place = il y a déjà une carte { $name } ; choisir un autre nom, ou donner à celle-là une nouvelle fiche : { $card } (la même carte), { $replace } (une autre carte à sa place)
there-is-no-board-name-known-known = il n’y a pas de carte « { $name } » ; connues : { $known }
type-it-as-on-the-phone-or-leave-the-wi-fi-out-the-board-asks-for-it = le taper comme sur le téléphone, ou laisser le Wi-Fi de côté : la carte le demande
wifi-password-file-belongs-to-a-wi-fi-name-it-with-option = --wifi-password-file va avec un Wi-Fi ; le nommer avec { $option }
write-each-such-as-example-with-a-name-of-its-own = écrire chacune par exemple { $example }, avec un nom à elle
write-it-such-as-example = l’écrire par exemple { $example }
write-the-name-as-the-phone-shows-it-boards-use-2-4-ghz-alone = écrire le nom comme le téléphone le montre ; les cartes n’utilisent que le 2,4 GHz


## L’aide des commandes

a-file-with-its-password-without-it-asked-for-hidden = Un fichier avec son mot de passe. Sans cela : demandé, sans l’afficher.
a-folder-to-copy-them-into-made-if-need-be = Un dossier où les copier, créé au besoin.
a-name-for-each-one-wire-probe-of-several-and-where-it-hangs-if-that-is-another-place = Un nom pour chaque sonde à un fil s’il y en a plusieurs, et où elle pend si c’est un autre lieu.
a-name-for-it-letters-digits-dots-dashes-underscores = Un nom pour elle : lettres, chiffres, points, traits d’union, tirets bas.
add-a-board-its-lines-in-the-settings-its-user-at-the-broker-its-card-then-wait-until-it-is-heard = Ajouter une carte : ses lignes dans les réglages, son compte chez le courtier, sa fiche ; puis attendre qu’elle soit reçue.
another-board-takes-the-place-and-the-name-of-one-that-is-broken-or-stolen = Une autre carte prend la place et le nom d’une carte cassée ou volée.
boards-add-replace-or-remove-one-make-its-card-put-it-aside-work-out-its-battery = Les cartes : en ajouter, remplacer ou enlever une, faire sa fiche, la mettre de côté, calculer sa batterie.
copy-the-board-s-program-into-a-folder-to-go-over-usb-precompiled-where-mpy-cross-is-installed = Copier le programme des cartes dans un dossier, pour l’USB ; compilé d’avance là où mpy-cross est installé.
do-it-without-a-question = Le faire sans demander.
draw-the-card-as-a-qr-code = Dessiner la fiche en code QR.
how-long-to-wait-until-it-is-heard-0-not-at-all = Combien de temps attendre qu’elle soit reçue ; 0 : pas du tout.
how-often-it-measures-10-s-to-1-h-usually-60-s = Tous les combien elle mesure : 10 s à 1 h, d’ordinaire 60 s.
its-open-connection-ends-so-does-the-guard-of-a-place-that-no-other-board-is-in = Sa connexion ouverte prend fin. La garde d’un lieu où aucune autre carte n’est, aussi.
its-wi-fi-without-it-that-of-the-board-before-it = Son Wi-Fi. Sans cela : celui de la carte d’avant.
mains-or-battery = mains (secteur) ou battery (batterie).
make-the-card-of-a-board-again-with-a-new-password-the-card-that-it-has-ends-at-once = Refaire la fiche d’une carte, avec un nouveau mot de passe. Celle qu’elle a prend fin aussitôt.
measurings-that-are-sent-in-one-go-for-batteries = Mesures envoyées d’un coup, pour les batteries.
show-every-board-its-place-whether-it-has-a-card-and-a-user-at-the-broker-when-it-was-heard = Montrer chaque carte : son lieu, si elle a une fiche et un compte chez le courtier, quand elle a été reçue.
take-a-board-away-its-user-at-the-broker-its-lines-in-the-settings-its-card-its-readings-stay = Enlever une carte : son compte chez le courtier, ses lignes dans les réglages, sa fiche. Ses relevés restent.
the-card-is-shown-once-as-text-to-paste-into-the-set-up-page-of-the-board-and-as-a-qr-code-it-holds-a-password-whoever-has-it-can-send-as-this-board = La fiche est montrée une fois, en texte à coller dans la page de mise en route de la carte et en code QR. Elle contient un mot de passe : qui l’a peut émettre au nom de cette carte.
the-card-of-the-old-one-ends-at-once-its-readings-stay-and-the-new-one-goes-on-with-them = La fiche de l’ancienne prend fin aussitôt. Ses relevés restent, et la nouvelle les continue.
what-is-not-named-again-stays-as-it-is = Ce qui n’est pas nommé de nouveau reste tel quel.
what-is-wired-to-it-once-for-each-sht3x-sht4x-bme280-45-or-77-its-other-address-ds18b20-moisture-battery-ds3231 = Ce qui y est câblé, une fois pour chacun : sht3x, sht4x, bme280 (@45 ou @77 : son autre adresse), ds18b20, moisture, battery, ds3231.
where-it-hangs-id-or-title-of-a-place = Où elle pend : identifiant ou titre d’un lieu.
with-json-the-card-too-which-holds-a-password = Avec --json : la fiche aussi, qui contient un mot de passe.


## Plusieurs à la fois

problems-nothing_changed =
    { $count ->
        [one] { $count } problème, et rien n’a été changé :
       *[other] { $count } problèmes, et rien n’a été changé :
    }

## La page : une nouvelle carte

board-add = Ajouter une carte
board-owner_adds = Le propriétaire peut ajouter des cartes, les remplacer et les enlever.
board-owner_only = Le propriétaire peut refaire sa fiche, la déplacer, mettre une autre carte à sa place, ou l’enlever.
board-not_set_up = Le courtier de cet ordinateur ne distingue pas encore les cartes. Y lancer, une fois : { $command }
board-add_explained = Ceci donne à la carte un compte chez le courtier et une fiche à y coller, et écrit le fichier des réglages. Ses commentaires restent, et l’ancien fichier est gardé à côté.
board-name = Son nom
board-hangs_in = Elle pend dans
board-wired = Ce qui y est câblé
board-sensor_sht3x = SHT3x
board-sensor_sht4x = SHT4x
board-sensor_bme280 = BME280
board-sensor_ds18b20 = DS18B20, thermomètre à un fil : ce que mesurent ses sondes
board-sensor_moisture = Sonde d’humidité (capacitive)
board-sensor_battery = Diviseur pour la batterie
board-sensor_ds3231 = DS3231, horloge
board-at_address = { $sensor }, à son autre adresse { $address }
board-no_probe = aucun n’est câblé
board-other_addresses = Capteurs à leur autre adresse
board-probes = Noms de ses sondes à un fil, s’il y en a plusieurs, et où chacune pend
board-power = Elle vit sur
board-power_mains = le secteur, toujours allumée
board-power_battery = une batterie, endormie entre deux mesures
board-measures_each = Elle mesure toutes les
board-sends_each = Elle envoie
board-rounds =
    { $count ->
        [one] chaque mesure aussitôt
       *[other] { $count } mesures d’un coup
    }
board-wifi = Nom du Wi-Fi
board-wifi_password = Mot de passe du Wi-Fi
board-wifi_known = Laisser le mot de passe vide pour prendre celui de « { $wifi } », comme pour la carte d’avant.
board-wifi_explained = Laisser le Wi-Fi vide pour ne pas le taper ici : la carte le demande. Les cartes n’utilisent que le 2,4 GHz.
board-make = Faire sa fiche


## La page : sa fiche

board-card_of = Fiche de { $node }
board-qr_title = Fiche de { $node } en code QR
board-shown_once = Elle est montrée ici une fois ; en refaire une si elle est perdue.
board-copy = Copier la fiche
board-copied = Copiée
board-look = Vers la page de { $node }


## La page : une carte

board-move = Le déplacer
board-move_explained = Pour une carte accrochée ailleurs à présent. Ce qu’elle a mesuré où elle était se montre aussi au nouvel endroit ; si cela trompe, l’enlever et l’ajouter sous un nouveau nom. Ses sondes restent là où les réglages les disent.
board-moved = { $node } est à sa nouvelle place. Le moniteur relit les réglages dans un instant.
board-do_card = Refaire sa fiche
board-do_replace = Mettre une autre carte à sa place
board-do_remove = L’enlever
board-explains_card = Pour la même carte, par exemple après une remise à zéro. Elle reçoit un nouveau mot de passe, et la fiche qu’elle a prend fin aussitôt.
board-explains_replace = Pour une carte cassée ou volée. La nouvelle prend son nom et sa place, la fiche de l’ancienne prend fin aussitôt, et les relevés restent.
board-explains_remove = Son compte chez le courtier, ses lignes dans les réglages et sa fiche partent, et sa connexion ouverte prend fin. Ses relevés restent.
minutes-min = { $minutes } min
heat-is-told-that-much-later-measure-more-often-or-send-fewer-in-one-go = la chaleur est annoncée d’autant plus tard : mesurer plus souvent, ou envoyer moins de mesures à la fois
the-time-between-two-sendings = le temps entre deux envois

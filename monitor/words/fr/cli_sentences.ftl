# Ligne de commande : refus et erreurs. Le nom est la phrase anglaise.

path-is-there-already-and-nothing-was-changed-use-force-to-replace-it-the-old-file-is-kept-beside-it-or-name-another-with-config =
    { $path } est déjà là, et rien n’a été changé. Utiliser --force pour le remplacer (l’ancien est gardé à côté), ou en nommer un autre par --config.
file-nodes-is-not-written-as-nodes-tables-put-node-in-by-hand =
    { $file } : nodes n’est pas écrit en tables [[nodes]] ; y mettre { $node } à la main
name-is-no-known-time-zone-did-you-mean-near =
    { $name } n’est pas un fuseau horaire connu ; vouliez-vous dire { $near } ?
the-disk-that-holds-path-has-only-megabytes-mb-left-to-mend-remedy =
    le disque de { $path } n’a plus que { $megabytes } Mo. Remède : { $remedy }
the-disk-that-holds-path-is-full-to-mend-remedy = le disque de { $path } est plein. Remède : { $remedy }
stopped-before-the-last-answer-and-nothing-was-written-without-questions-rearing-monitor-init-yes-with-options-as-in-rearing-monitor-init-help =
    arrêté avant la dernière réponse, et rien n’a été écrit. Sans questions : rearing-monitor init --yes, avec les options de rearing-monitor init --help
process-number = processus { $number }
another-process = un autre processus
the-folder-path-is-not-empty-allowed-an-empty-or-a-new-folder =
    le dossier { $path } n’est pas vide ; permis : un dossier vide ou nouveau
the-folder-path-cannot-be-used-why = le dossier { $path } ne peut pas servir : { $why }
the-folder-path-does-not-exist-to-mend-create-it-or-give-another =
    le dossier { $path } n’existe pas. Remède : le créer, ou en donner un autre
from-start-is-not-before-to-end = --from { $start } n’est pas avant --to { $end }
where-to-give-a-file-or-a-folder-rearing-monitor-backup-media-stick-or-set-store-backup-folder-in-the-settings =
    où ? Donner un fichier ou un dossier : `rearing-monitor backup /media/stick/`, ou régler [store] backup_folder
path-cannot-be-written-why = { $path } ne peut pas être écrit : { $why }
path-cannot-be-written-why-to-mend-create-the-folder-and-let-the-user-that-runs-the-program-write-in-it-or-change-store-path =
    { $path } ne peut pas être écrit : { $why }. Remède : créer le dossier, et laisser l’utilisateur du programme y écrire ; ou changer [store] path
path-a-monitor-runs-on-this-database-already-who-two-would-warn-twice-to-mend-stop-that-one-first-or-give-this-one-its-own-settings-file-with-another-store-path =
    { $path } : un moniteur tourne déjà sur cette base ({ $who }) ; deux avertiraient deux fois. Remède : arrêter d’abord celui-là, ou donner à celui-ci son propre fichier de réglages avec un autre [store] path
the-beginning = le début
now = maintenant
say-which-sensor-rearing-monitor-calibrate-help-shows-an-example =
    dire quel capteur ; `rearing-monitor calibrate --help` montre un exemple
salt-is-for-air-humidity-sensor-measures-quantity =
    --salt est pour air_humidity ; { $sensor } mesure : { $quantity }
salt-needs-temperature-the-humidity-over-a-salt-depends-on-it =
    --salt demande --temperature : l’humidité au-dessus d’un sel en dépend
raw-times-raw-and-true-times-true-or-salt-allowed-as-many-of-each =
    { $raw } fois --raw et { $true } fois --true ou --salt ; permis : autant de chaque
count-points-allowed-one-shift-or-two-shift-and-slope =
    { $count } points ; permis : un (décalage) ou deux (décalage et pente)
from-is-moment-which-is-ahead-allowed-now-or-earlier =
    --from est { $moment }, ce qui est à venir ; permis : maintenant ou plus tôt
the-sensor-is-off-by-off-unit-more-than-most-usually-means-a-broken-sensor-or-a-mix-up-of-numbers-if-it-is-right-all-the-same-add-sure =
    le capteur s’écarte de { $off } { $unit } ; plus de { $most } veut dire d’ordinaire un capteur cassé ou des nombres confondus. Si c’est juste malgré tout, ajouter --sure
no-board-measures-substrate-moisture-so-there-is-no-probe-to-calibrate =
    aucune carte ne mesure substrate_moisture, il n’y a donc pas de sonde à étalonner
raw-times-raw-and-true-times-true-allowed-as-many-of-each =
    { $raw } fois --raw et { $true } fois --true ; permis : autant de chaque
true-and-salt-are-both-given-allowed-one-of-them = --true et --salt sont donnés tous deux ; permis : l’un d’eux
option-is-value-allowed-for-quantity-low-to-high-unit =
    { $option } est { $value } ; permis pour { $quantity } : de { $low } à { $high } { $unit }
s-0-65-stands-for-65 = (0.65 veut dire 65 %)
option-is-given-allowed-one-sign-or-the-word-tab =
    { $option } est { $given } ; permis : un seul signe, ou le mot tab
option-is-given-allowed-allowed = { $option } est { $given } ; permis : { $allowed }
the-settings-name-nobody-to-send-to-to-mend-add-a-recipients-table-with-id-and-address =
    les réglages ne nomment personne à qui envoyer. Remède : ajouter une table [[recipients]] avec id et address
there-is-no-recipient-name-allowed-names = il n’y a pas de destinataire « { $name } » ; permis : { $names }
the-address-of-recipient-name = l’adresse du destinataire { $name }
not-usable = inutilisable
an-address-that-apprise-knows-such-as-example = une adresse que connaît apprise, comme { $example }
board-is-written-allowed-such-as-node-01-bin-1 =
    --board est "{ $written }" ; permis : par exemple node-01=bin-1
it-is-needed-without-it-no-message-can-go-out-this-way =
    il le faut : sans cela aucun message ne peut partir par cette voie
name-is-no-known-time-zone-allowed-region-city-such-as-africa-gaborone-or-a-large-city-near-you =
    { $name } n’est pas un fuseau horaire connu ; permis : région/ville, par exemple Africa/Gaborone, ou une grande ville proche
path-cannot-be-written-why-nothing-was-written-go-to-a-folder-of-your-own-or-name-another-with-config =
    { $path } ne peut pas être écrit : { $why } ; rien n’a été écrit. Aller dans un dossier à soi, ou en nommer un autre par --config
several-time-zones-are-called-name-allowed-one-of-zones =
    plusieurs fuseaux horaires s’appellent { $name } ; permis : l’un de { $zones }
that-is-no-token-of-a-bot-it-looks-like-123456789-aae-a-number-a-colon-a-key =
    ce n’est pas un jeton de robot ; il ressemble à 123456789:AAE... (un nombre, deux-points, une clé)
the-farm-needs-a-name-allowed-any-text =
    il faut un nom à la ferme ; permis : tout texte
written-is-neither-yes-nor-no-allowed-y-or-n =
    "{ $written }" n’est ni oui ni non ; permis : o ou n
written-is-no-address-of-a-broker-allowed-its-name-or-number-such-as-192-168-1-20-or-farm-computer-1883 =
    "{ $written }" n’est pas l’adresse d’un courtier ; permis : son nom ou son numéro, par exemple 192.168.1.20 ou farm-computer:1883
written-is-no-e-mail-address-allowed-name-provider-example =
    "{ $written }" n’est pas une adresse de courriel ; permis : nom@fournisseur.example
written-is-no-height-above-sea-level-allowed-metres-from-low-to-high-such-as-1000-m =
    "{ $written }" n’est pas une altitude ; permis : des mètres de { $low } à { $high }, par exemple 1000 m
written-is-no-name-of-a-computer-allowed-mail-example-or-mail-example-587 =
    "{ $written }" n’est pas le nom d’un ordinateur ; permis : mail.example, ou mail.example:587
written-is-no-number-of-a-chat-allowed-digits-such-as-12315544 =
    "{ $written }" n’est pas le nombre d’une conversation ; permis : des chiffres, par exemple 12315544
written-is-no-number-of-places-allowed-a-whole-number-from-0-to-most =
    "{ $written }" n’est pas un nombre de lieux ; permis : un nombre entier de 0 à { $most }
written-is-no-number-of-the-list-allowed-up-to-most =
    "{ $written }" n’est pas un numéro de la liste ; permis : jusqu’à { $most }
written-is-no-telephone-number-with-the-code-of-its-country-allowed-267-71-234-567 =
    "{ $written }" n’est pas un numéro de téléphone avec l’indicatif du pays ; permis : +267 71 234 567
written-is-no-topic-allowed-letters-digits-dashes-underscores-64-at-most =
    "{ $written }" n’est pas un sujet ; permis : lettres, chiffres, tirets, soulignés, 64 au plus
written-is-none-of-the-places-allowed-a-number-from-1-to-count-a-name-from-the-list-or-0-for-none-yet =
    "{ $written }" n’est aucun des lieux ; permis : un numéro de 1 à { $count }, un nom de la liste, ou 0 pour pas encore
place-empty-true-has-no-effect-since-the-logbook-has-spoken-of-it-take-the-key-out-who-says-what-is-empty-is-the-logbook-command =
    { $place } : empty = true n’a pas d’effet, car le journal en a parlé. Enlever la clé ; c’est le journal qui dit ce qui est vide : { $command }
behind-another-web-server-the-page-needs-the-address-under-which-phones-reach-that-one-not-address-to-mend-address-https-farm-example =
    derrière un autre serveur web, la page a besoin de l’adresse à laquelle les téléphones atteignent celui-ci, et non « { $address } ». Pour corriger : --address https://farm.example
plain-and-encrypted-need-two-ports-port-was-given-for-both =
    en clair et chiffré demandent deux ports ; { $port } a été donné pour les deux
the-farm-has-no-ca-yet-in-folder-so-the-page-cannot-be-served-over-https-to-mend-rearing-monitor-page-setup-way-https =
    la ferme n’a pas encore d’autorité (CA) dans { $folder }, la page ne peut donc pas être servie par HTTPS. Pour corriger : rearing-monitor page setup --way https
the-way-is-way-allowed-ways-nothing-was-changed-to-mend-way-plain =
    la voie est « { $way } » ; permis : { $ways }. Rien n’a été changé. Pour corriger : --way plain
day-is-the-day-that-runs-give-it-without-date =
    --day est la journée en cours ; donnez-le sans --date
no-day-runs-now-it-is-night-rearing-monitor-night-shows-the-night-so-far =
    aucune journée n’est en cours, c’est la nuit ; `rearing-monitor night` montre la nuit jusqu’ici
over-stands-for-all-alarms-that-are-over-give-it-without-an-alarm-and-all =
    --over veut dire toutes les alarmes terminées ; donnez-le sans alarme et sans --all
entry-number-has-no-photo-nothing-was-deleted-logbook-list-shows-the-numbers =
    l’entrée { $number } n’a pas de photo ; rien n’a été supprimé. `logbook list` montre les numéros

## Copies

address-stands-in-no-copies-of-the-settings-and-nothing-was-written-to-mend-write-it-there-and-give-its-name-here =
    { $address } n’est dans aucun [[copies]] des réglages, et rien n’a été écrit. Remède : l’y écrire, et donner ici son nom.
names-is-not-set-here-and-copies-need-it-nothing-was-written-to-mend-give-it-to-this-command-as-the-service-has-it-or-keep-the-secret-in-a-file-file-in-the-settings =
    { $names } n’est pas défini ici, et les copies en ont besoin ; rien n’a été écrit. Remède : le donner à cette commande comme le service l’a, ou garder le secret dans un fichier (…_file dans les réglages).

## many sites

a-file-name-with-at-least-archive-url-and-bucket = un fichier { $name } avec au moins [archive] url et bucket
a-name-that-no-other-has = un nom que ne porte aucun autre
a-password-for-the-page-or-an-address-for-messages-or-both =
    un mot de passe pour la page, ou une adresse pour les messages, ou les deux
missing-and-so-is-key = absent, et { $key } aussi
no-site = aucun site
remove-one-of-the-two-or-name-it-otherwise = enlevez l’un des deux, ou nommez-le autrement
run-rearing-monitor-sites-init-to-write-one-with-every-key-explained =
    lancez `rearing-monitor sites init` pour en écrire un, chaque clé expliquée
the-archive-knows-no-site-site-to-see-which-there-are-rearing-monitor-sites =
    l’archive ne connaît aucun site { $site }. Pour voir lesquels il y a : rearing-monitor sites
the-settings-file-of-many-sites = le fichier de réglages de plusieurs sites
the-settings-know-no-person-name-allowed-known =
    les réglages ne connaissent aucune personne { $name } ; admis : { $known }
the-sites-that-this-person-may-see-such-as-example =
    les sites que cette personne peut voir, par exemple { $example }
file-is-there-already-and-nothing-was-changed-to-mend-name-another-file =
    { $file } existe déjà, et rien n’a été changé. Pour y remédier : nommez un autre fichier
the-last-copy-to-place-failed-why = la dernière copie vers { $place } a échoué : { $why }

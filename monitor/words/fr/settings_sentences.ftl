# Réglages : problèmes, avertissements, et les mots du fichier que « init » écrit. Le nom est la phrase anglaise.

rename-one-of-the-two = renommer l’un des deux
name-which-places-does-not-list-as-a-place = « { $name } », que [[places]] ne donne pas comme lieu
name-which-places-does-not-list-as-a-room = « { $name } », que [[places]] ne donne pas comme salle
one-of-the-two = l’un des deux
a-file = un fichier
write-one-of-those = écrire l’un de ceux-là
correct-the-number = corriger le nombre
correct-the-value-its-unit-is-the-one-shown = corriger la valeur ; son unité est celle qui est montrée
name-which-is-the-id-of-table-too = « { $name } », qui est aussi l’id de { $table }
correct-it-or-add-it-to-places = le corriger, ou l’ajouter à [[places]]
path-which-is-a-folder = « { $path } », qui est un dossier
low-to-high = de { $low } à { $high }
low-to-high-unit = de { $low } à { $high } { $unit }
if-that-is-in-f-write-value-which-is-the-same-in-c =
    si c’est en °F, écrire { $value }, qui est la même valeur en °C
moisture-is-a-share-for-percent-write-share = l’humidité est une part : pour { $percent } %, écrire { $share }
humidity-is-in-percent-write-value = l’humidité de l’air est en pour cent : écrire { $value }
name-which-is-no-known-time-zone = « { $name } », qui n’est pas un fuseau horaire connu
region-city-such-as-example = région/ville, comme "{ $example }"
choose-one-of-those-or-leave-the-key-out = choisir l’un de ceux-là, ou omettre la clé
name-which-is-a-place-too-table = « { $name } », qui est aussi un lieu ({ $table })
name-in-a-room = « { $name } » dans une salle
a-room-stands-in-no-other-remove-it = une salle n’est dans aucune autre : la retirer
topic-without-level-and-no-key-node = « { $topic } » sans { $level }, et sans clé node
topic-and-a-key-node-besides = « { $topic } » et en plus une clé node
add-tls-true-or-remove-the-key = ajouter tls = true, ou retirer la clé
say-the-stage-that-it-belongs-to = dire le stade auquel il appartient
look-up-the-region-and-city-of-your-time-zone = chercher la région et la ville de votre fuseau horaire
a-name-that-no-place-and-no-node-has = un nom que ne porte aucun lieu ni aucune carte
a-name-that-no-place-has = un nom que ne porte aucun lieu
time-the-same-as-night-start = « { $time } », comme night_start
another-time-than-night-start = une autre heure que night_start
the-night-runs-from-one-to-the-other = la nuit va de l’une à l’autre
host-together-with-embedded-true = « { $host } » avec embedded = true
set-embedded-false-to-use-the-broker-on-that-computer-or-leave-host-out =
    mettre embedded = false pour utiliser le broker de cet ordinateur, ou omettre host
true-together-with-embedded-true = true avec embedded = true
leave-tls-out-or-use-a-broker-such-as-mosquitto-with-embedded-false =
    omettre tls, ou utiliser un broker comme mosquitto avec embedded = false
given-without-a-username = donné sans username
both-or-neither = les deux, ou aucun
add-username = ajouter username
given-alone = donné seul
client-certificate-and-client-key-together = client_certificate et client_key ensemble
add-the-one-that-is-missing = ajouter celui qui manque
add-a-name-such-as-rearing-sqlite = ajouter un nom comme rearing.sqlite
path-which-is-not-there = « { $path } », qui n’existe pas
address-without-a-password = « { $address } » sans mot de passe
s-127-0-0-1-or-any-address-together-with-a-password = "127.0.0.1", ou toute adresse avec un mot de passe
add-password-env-or-password-file-to-page-since-that-network-could-acknowledge-alarms =
    ajouter password_env ou password_file à [page], car ce réseau pourrait dire « vue » pour des alarmes
s-0-or-more = 0 ou plus
nothing = rien
a-topic-with-level-in-it-or-the-key-node = un topic qui contient { $level }, ou la clé node
give-one-of-the-two-so-that-every-message-has-one-sender =
    donner l’un des deux, pour que chaque message ait un seul expéditeur
no-and-no = ni + ni #
write-level-where-the-node-s-name-is = écrire { $level } là où est le nom de la carte
about-the-same-alarm-as-table = sur la même alarme que { $table }
one-table-for-each-alarm = une table par alarme
put-both-into-one-table = mettre les deux dans une seule table
from-time-to-the-same-time = de « { $time } » à la même heure
two-different-times = deux heures différentes
leave-quiet-hours-out-for-none-for-a-person-who-only-gets-high-alarms-set-priorities =
    omettre quiet_hours s’il n’y en a pas ; pour une personne qui ne reçoit que les alarmes hautes, régler priorities
given-without-tls = donné sans tls
a-web-address-that-begins-with-http-or-https = une adresse web qui commence par http:// ou https://
write-it-in-full = l’écrire en entier
none = aucun
above-0 = plus de 0
name-as-in-table-already = « { $name } », déjà dans { $table }
each-number-once = chaque nombre une seule fois
remove-one-of-the-two = retirer l’un des deux
numbers-that-fit-together = des nombres qui vont ensemble
correct-one-of-them = corriger l’un d’eux
an-id-of-its-own = un id qui lui soit propre
rename-one-or-remove-it = en renommer un, ou le retirer
correct-the-path = corriger le chemin
an-address-that-is-not-shown = une adresse qui n’est pas montrée
a-whole-number = un nombre entier
text = du texte
a-local-time-of-day-such-as-example = une heure locale comme "{ $example }"
a-path = un chemin
a-name-of-at-most-40-letters-digits-dots-dashes-underscores =
    un nom d’au plus 40 lettres, chiffres, points, tirets, soulignés
letters-digits-dashes-and-underscores-with-between-levels =
    lettres, chiffres, tirets et soulignés, avec / entre les niveaux
correct-the-value-or-leave-the-key-out = corriger la valeur, ou omettre la clé
one-of-choices = l’un de { $choices }
a-list-in-each-item = une liste entre [ ], chaque élément : { $item }
a-table-in-braces = une table entre { $braces }
text-that-is-not-empty = du texte qui n’est pas vide
write-near-if-that-is-what-you-mean = écrire "{ $near }", si c’est ce que vous voulez dire
add-a-line-beginning-with-key = ajouter une ligne qui commence par : { $key } =
empty = vide
a-value-that-is-not-shown = une valeur qui n’est pas montrée
remove-the-line = retirer la ligne
not-a-known-key = pas une clé connue
correct-the-value = corriger la valeur
a-value = une valeur
kind-from-least-to-most = { $kind } de { $least } à { $most }
kind-of-least-or-more = { $kind } d’au moins { $least }
kind-above-least-up-to-most = { $kind } de plus de { $least }, jusqu’à { $most }
kind-above-least = { $kind } de plus de { $least }
kind-up-to-most = { $kind } jusqu’à { $most }
the-file = le fichier
missing = manquant
choose-one-of-those = choisir l’un de ceux-là
write-the-number-without-quotes = écrire le nombre sans guillemets
write-true-or-false-without-quotes = écrire true ou false, sans guillemets
write-it-in-double-quotes-in-the-form-allowed = l’écrire entre guillemets droits, dans la forme permise
write-table-with-double-brackets-above-each-entry =
    écrire { $table } avec de doubles crochets au-dessus de chaque entrée
put-square-brackets-around-the-list = mettre la liste entre crochets
write-table-with-single-brackets-once = écrire { $table } avec de simples crochets, une seule fois
first-and-second = { $first } et { $second }
a-mosquitto-broker-keeps-messages-for-this-program-only-with-these-lines-in-its-configuration-persistence-true-autosave-interval-1-max-queued-messages-100000-its-default-keeps-1000 =
    un broker mosquitto ne garde les messages pour ce programme qu’avec ces lignes dans sa configuration : persistence true, autosave_interval 1, max_queued_messages 100000 (par défaut il en garde 1000).
node-sends-readings-and-is-not-in-the-settings-they-are-stored-but-guard-nothing-add-a-nodes-table-with-id-node-and-its-place =
    { $node } envoie des mesures et n’est pas dans les réglages : elles sont conservées mais ne surveillent rien. Ajouter une table [[nodes]] avec id = "{ $node }" et son lieu.
nobody-is-told-anything-there-is-no-recipients-table-only-the-sounder-warns =
    personne n’est prévenu : il n’y a pas de table [[recipients]]. Seule la sirène avertit.
nobody-gets-high-alarms-put-high-into-the-priorities-of-at-least-one-person =
    personne ne reçoit les alarmes hautes : mettre high dans les priorities d’au moins une personne.
nobody-gets-medium-alarms-put-medium-into-the-priorities-of-at-least-one-person =
    personne ne reçoit les alarmes moyennes : mettre medium dans les priorities d’au moins une personne.
the-night-report-goes-to-nobody-set-night-report-true-for-one-person =
    le rapport de nuit ne va à personne : mettre night_report = true pour une personne.
two-recipients-have-the-same-address-the-second-is-no-help-when-the-first-is-not-seen =
    deux destinataires ont la même adresse : le second n’aide pas quand le premier n’est pas vu.
all-recipients-are-reached-through-the-same-kind-of-service-when-that-fails-nobody-is-told-give-one-of-them-another-kind =
    tous les destinataires sont joints par le même genre de service : s’il tombe, personne n’est prévenu. Donner un autre genre à l’un d’eux.
the-embedded-broker-listens-on-address-without-a-password-anyone-on-that-network-can-send-readings-keep-the-nodes-on-a-network-of-their-own-or-set-username-and-password =
    le broker intégré écoute sur { $address } sans mot de passe : n’importe qui sur ce réseau peut envoyer des mesures. Garder les cartes sur un réseau à elles, ou régler username et password.
the-password-goes-to-host-unencrypted-set-tls-true-if-the-broker-can-do-it =
    le mot de passe part vers { $host } sans chiffrement. Mettre tls = true si le broker le permet.
only-one-person-is-told-a-second-recipients-table-with-order-2-adds-another =
    une seule personne est prévenue : une deuxième table [[recipients]] avec order = 2 en ajoute une autre.
if-this-computer-itself-dies-nobody-is-told-unless-an-outside-service-notices-see-heartbeat-url-in-messages =
    si cet ordinateur lui-même tombe, personne n’est prévenu, sauf si un service extérieur s’en aperçoit : voir heartbeat_url dans [messages].
site-eggs-g-a-week-wants-eggs-but-no-place-is-a-love-cage-kind-love-cage =
    { "[site]" } eggs_g_a_week demande des œufs, mais aucun lieu n’est une cage de ponte (kind = "love_cage").
page-has-a-public-address-but-the-page-is-off-enabled-false =
    {""}[page] a une public_address, mais la page est éteinte (enabled = false).
place-has-no-sensor-nothing-guards-it-name-it-in-a-nodes-table-as-place =
    { $place } n’a pas de capteur : rien ne le surveille. Le nommer comme place dans une table [[nodes]].
place-a-kind-needs-quantities-which-no-sensor-in-it-measures =
    { $place } ({ $kind }) : aucun capteur n’y mesure ce qu’il faut : { $quantities }.
node-does-not-say-what-it-measures-and-nothing-has-been-heard-from-it-whether-place-has-what-it-needs-is-not-known-add-the-key-measures =
    { $node } ne dit pas ce qu’elle mesure, et rien n’en a été reçu : on ne sait pas si { $place } a ce qu’il lui faut. Ajouter la clé measures.
node-is-in-no-place-its-readings-are-stored-but-guard-nothing-add-the-key-place =
    { $node } n’est dans aucun lieu : ses mesures sont conservées mais ne surveillent rien. Ajouter la clé place.
node-its-probe-probe-is-in-no-place-add-it-to-probes-or-give-the-node-a-place =
    { $node } : sa sonde { $probe } n’est dans aucun lieu. L’ajouter à probes, ou donner un lieu à la carte.
node-is-out-of-service-place-is-guarded-only-by-what-else-stands-in-it =
    { $node } est hors service : { $place } n’est surveillé que par ce qui s’y trouve d’autre.
node-sends-every-interval-s-and-counts-as-silent-after-limit-s-one-late-message-raises-an-alarm-set-stale-after-s-to-three-intervals-or-more =
    { $node } envoie toutes les { $interval } s et passe pour muette après { $limit } s : un seul message en retard lève une alarme. Mettre stale_after_s à trois intervalles ou plus.
the-path-of-a-file-that-holds-the-secret-and-that-its-owner-alone-may-read =
    le chemin d’un fichier qui contient le secret et que seul son propriétaire peut lire
not-utf-8-text = pas un texte UTF-8
file-key-stands-in-the-file-itself-and-others-may-read-the-file-use-name-env-or-name-file-or-run-chmod-600-path =
    { $file } : { $key } est dans le fichier même, et d’autres peuvent le lire. Utiliser { $name }_env ou { $name }_file, ou lancer : chmod 600 { $path }
name-and-there-is-no-such-environment-variable-or-it-is-empty =
    « { $name } », et cette variable d’environnement n’existe pas ou est vide
the-name-of-an-environment-variable-that-holds-the-secret =
    le nom d’une variable d’environnement qui contient le secret
set-it-before-the-start-export-name-or-in-the-file-that-the-service-unit-names-as-environmentfile-or-use-key =
    la régler avant le démarrage (export { $name }=...), ou dans le fichier que l’unité du service nomme EnvironmentFile ; ou utiliser { $key }
path-which-others-may-read = « { $path } », que d’autres peuvent lire
given-besides-key = donné en plus de { $key }
only-one-of-keys = un seul de { $keys }
remove-the-others = retirer les autres
the-settings-file = le fichier de réglages
not-there = absent
a-file-such-as-name-here-one-in-the-user-s-folder-or-one-named-with-config =
    un fichier comme { $name } ici, un dans le dossier de l’utilisateur, ou un nommé par --config
run-rearing-monitor-init-to-write-one-by-answering-a-few-questions-or-rearing-monitor-demo-to-see-the-program-at-work-without-any =
    lancer `rearing-monitor init` pour en écrire un en répondant à quelques questions, ou `rearing-monitor demo` pour voir le programme au travail sans fichier
path-which-cannot-be-read-why = « { $path } », qui ne peut pas être lu ({ $why })
run-chmod-600-path = lancer : chmod 600 { $path }
path-which-is-empty = « { $path } », qui est vide
name-it-in-quotes = le nommer entre guillemets
correct-the-path-or-the-rights = corriger le chemin ou les droits
write-the-secret-into-it = y écrire le secret
not-readable-why = illisible ({ $why })
utf-8-text = un texte UTF-8
settings-of-rearing-monitor = Réglages de rearing-monitor.
room-name = Salle { $name }
love-cage-name = Cage de ponte { $name }
hatching-tray-name = Plateau d’éclosion { $name }
grow-out-bin-name = Bac d’élevage { $name }
pupation-box-name = Caisse de nymphose { $name }
one-table-for-each-with-these-keys = Une table { $table } pour chaque, avec ces clés :
meaning-allowed-default = { $meaning } ({ $allowed } ; { $default })
must-be-given = à donner
may-be-left-out = facultatif
default-value = par défaut { $value }
where-key-is-found-allowed-allowed-to-mend-remedy =
    { $where } : { $key } : { $found } ; permis : { $allowed }. Remède : { $remedy }
file-line-line = { $file }, ligne { $line }
everything-after-a-is-a-comment-a-key-that-is-commented-out-has-the-value-shown-or-is-left-out-after-a-change-rearing-monitor-check-says-what-is-wrong-and-what-each-place-is-guarded-for-times-of-day-are-local-times-of-the-farm-temperatures-are-in-c-humidity-in-rh-0-to-100-substrate-moisture-is-a-share-from-0-to-1 =
    Tout ce qui suit un # est un commentaire. Une clé en commentaire a la valeur montrée, ou est omise.
    Après un changement : `rearing-monitor check` dit ce qui ne va pas et contre quoi chaque lieu est surveillé.
    Les heures sont celles de l’élevage ; les températures en °C, l’humidité de l’air en %HR (0 à 100),
    l’humidité du substrat est une part de 0 à 1.
secrets-addresses-of-people-passwords-tokens-are-kept-outside-this-file-write-one-of-password-env-name-the-environment-variable-name-holds-it-password-file-path-the-file-path-holds-it-only-its-owner-may-read-it-chmod-600-path-and-in-the-same-way-address-env-token-env-heartbeat-url-env =
    Les secrets (adresses de personnes, mots de passe, jetons) restent hors de ce fichier. Écrire l’un de
      password_env = "NOM"         la variable d’environnement NOM le contient
      password_file = "CHEMIN"     le fichier CHEMIN le contient ; seul son propriétaire peut le lire (chmod 600 CHEMIN)
    et de même address_env, token_env, heartbeat_url_env.
a-comment-begins-with =
    un commentaire commence par #
a-list-in =
    une liste entre [ ]
a-number-with-a-point-without-a-unit =
    un nombre avec un point, sans unité
a-quote-and-a-bracket-at-each-end =
    un guillemet et un crochet à chaque bout
a-time-of-day-in-quotes-06-30 =
    une heure entre guillemets : "06:30"
correct-the-rights-of-the-file-or-run-the-command-as-the-user-of-the-service =
    corriger les droits du fichier, ou lancer la commande comme l’utilisateur du service
each-key-once-in-a-table =
    chaque clé une fois par tableau
each-such-table-once =
    chaque tableau de ce nom une fois
given-twice-in-line-line-already =
    donné deux fois : déjà à la ligne { $line }
key-value =
    clé = valeur
key-value-one-a-line-with-text-in-double-quotes-a-comment-begins-with =
    clé = valeur, une par ligne, le texte entre "guillemets droits" ; un commentaire commence par #
look-at-this-line-and-at-the-one-before-it =
    regarder cette ligne et celle d’avant
not-readable-text =
    illisible : { $text }
not-utf-8-text-a-letter-in-line-line-is-saved-in-another-way =
    pas du texte UTF-8 : une lettre de la ligne { $line } est enregistrée autrement
one-bracket-on-each-side =
    un crochet de chaque côté
ordinary-blanks-as-the-space-bar-makes-them =
    des espaces ordinaires, comme les fait la barre d’espace
put-its-keys-under-the-first =
    mettre ses clés sous le premier
save-it-again-as-utf-8-text =
    l’enregistrer de nouveau comme texte UTF-8
saved-as-utf-16-not-as-utf-8-text =
    enregistré en UTF-16, et non comme texte UTF-8
straight-quotes =
    des guillemets droits : "
text-in-double-quotes =
    du texte entre "guillemets droits"
the-line =
    la ligne
true-or-false-in-small-letters =
    true ou false, en minuscules
two-brackets-on-each-side =
    deux crochets de chaque côté
write-line =
    écrire : { $line }
written-as-text =
    écrit { $text }
place-its-board-sends-every-interval-min-too-slow-for-the-early-heat-alarm-of-place-its-limits-of-temperature-still-guard-it-let-the-board-send-every-limit-min-or-more-often-and-set-interval-s-so =
    { $place } : sa carte envoie toutes les { $interval } min, trop lent pour l’alerte précoce de chaleur de { $place } ; ses limites de température le surveillent toujours. Faire envoyer la carte toutes les { $limit } min ou plus souvent, et régler interval_s ainsi.
the-password-of-table-is-short-others-on-that-network-can-guess-it-take-count-letters-or-more-such-as-four-words =
    le mot de passe de { "[" }{ $table }] est court : d’autres sur ce réseau peuvent le deviner. En prendre un de { $count } lettres ou plus, par exemple quatre mots.
the-password-of-table-is-one-of-those-that-are-tried-first-others-on-that-network-can-guess-it-take-four-words-that-have-nothing-to-do-with-one-another =
    le mot de passe de { "[" }{ $table }] est de ceux qu’on essaie d’abord : d’autres sur ce réseau peuvent le deviner. Prendre quatre mots sans rapport entre eux.
a-command-given-as-the-user-of-the-service-or-by-one-of-its-group =
    une commande lancée comme l’utilisateur du service, ou par quelqu’un de son groupe
not-readable-for-you =
    illisible pour vous
run-it-as-that-user-such-as-sudo-u-user-rearing-monitor-now =
    la lancer comme cet utilisateur, par exemple : sudo -u { $user } rearing-monitor now
node-its-interval-s-interval-is-not-sent-to-it-since-the-board-s-program-takes-whole-seconds-from-least-to-most =
    { $node } : son interval_s ({ $interval }) ne lui est pas envoyé, car le programme de la carte prend des secondes entières de { $least } à { $most }.
name-the-name-of-another-probe-too = "{ $name }", aussi le nom d’une autre sonde
a-name-for-each-probe = un nom pour chaque sonde
give-each-probe-its-own-name = donner à chaque sonde son propre nom
count-probes = { $count } sondes
at-most-most-probes = au plus { $most } sondes
hang-the-others-on-another-board = brancher les autres sur une autre carte
the-serial-number-code = le numéro de série "{ $code }"
s-16-digits-and-small-letters-a-to-f = 16 chiffres et petites lettres de a à f
copy-it-from-what-the-board-reports-rearing-monitor-nodes = le copier de ce que dit la carte : rearing-monitor nodes
a-name-of-at-most-16-letters-digits-dots-dashes-underscores =
    un nom d’au plus 16 lettres, chiffres, points, tirets, tirets bas
another-port-than-the-plain-one-of-the-page =
    un autre port que le port en clair de la page
change-one-of-the-two =
    changer l’un des deux
page-proxies-names-every-address-which-is-left-out-anybody-could-name-another-address-for-each-guess-at-the-password-give-the-address-of-the-web-server-in-front-of-the-page =
    { "[" }page] proxies nomme toutes les adresses, ce qui est laissé de côté : chacun pourrait nommer une autre adresse à chaque essai du mot de passe. Donner l’adresse du serveur web devant la page.
node-sends-every-interval-h-heat-that-it-measures-is-told-up-to-that-much-later-and-its-own-silence-after-limit-h-let-it-send-every-hour-or-more-often-interval-s-send-every =
    { $node } envoie toutes les { $interval } h : la chaleur qu’elle mesure est annoncée avec autant de retard, et son propre silence après { $limit } h. La faire envoyer toutes les heures ou plus souvent (interval_s, send_every).

## Copies

an-address-such-as-example = une adresse comme { $example }
an-address-with-a-password-in-it = une adresse qui contient un mot de passe
an-address-without-one = une adresse sans mot de passe
at-least-count-letters = au moins { $count } lettres
correct-it = la corriger
in-the-file-itself = dans le fichier même
name-file-or-name-env = { $name }_file ou { $name }_env
take-four-words-that-have-nothing-to-do-with-one-another = prendre quatre mots sans rapport entre eux
take-it-out-and-give-it-with-password-file-or-password-env = l’ôter, et le donner avec password_file ou password_env
too-short = trop court
write-it-into-a-file-of-its-own-chmod-600-and-name-that-file-here = l’écrire dans un fichier à part (chmod 600), et nommer ce fichier ici
write-one-of-them = en écrire un

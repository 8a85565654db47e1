# Ce que le moteur dit à son départ, de ses fichiers et à la ligne de commande. Le nom est la phrase anglaise.

## Courtier (MQTT)

the-embedded-broker-cannot-listen-on-where-error-if-another-broker-runs-there-set-broker-embedded-false-else-choose-another-port =
    le courtier intégré ne peut pas écouter sur { $where } : { $error }. Si un autre courtier y tourne, mettre [broker] embedded = false ; sinon choisir un autre port
another-program-uses-the-same-client-id-give-each-its-own-broker-client-id =
    un autre programme utilise le même client_id ; donner à chacun son propre [broker] client_id
the-broker-does-not-speak-this-version-of-mqtt-try-broker-protocol-3-1-1 =
    le courtier ne parle pas cette version de MQTT ; essayer [broker] protocol = "3.1.1"
the-broker-refused-the-client-id-choose-another-broker-client-id =
    le courtier a refusé le client_id ; choisir un autre [broker] client_id
the-broker-at-where-hung-up-without-an-answer-perhaps-password-it-speaks-another-version-of-mqtt-tls =
    le courtier à { $where } a raccroché sans répondre ; peut-être : { $password }, il parle une autre version de MQTT, { $tls }
the-broker-s-certificate-at-where-is-not-trusted-error-see-broker-ca-file =
    le certificat du courtier à { $where } n’est pas reconnu : { $error } ; voir [broker] ca_file
no-tls-connection-to-where-error-is-this-the-broker-s-tls-port =
    pas de connexion TLS à { $where } : { $error } ; est-ce bien le port TLS du courtier ?
broker-ca-file-file-cannot-be-used-error =
    { "[" }broker] ca_file { $file } est inutilisable : { $error }
wrong-or-missing-user-name-or-password =
    nom d’utilisateur ou mot de passe faux ou absent
it-wants-a-user-name-and-password =
    il veut un nom d’utilisateur et un mot de passe
it-does-not-speak-tls =
    il ne parle pas TLS
the-port-wants-tls =
    le port veut TLS
broker-client-certificate-certificate-and-client-key-key-cannot-be-used-error =
    { "[" }broker] client_certificate { $certificate } et client_key { $key } sont inutilisables : { $error }
the-broker-does-not-acknowledge-the-messages-not-all-of-them-arrived =
    le courtier ne confirme pas les messages ; tous ne sont pas arrivés
the-broker-keeps-closing-the-connection-perhaps-reason =
    le courtier ferme sans cesse la connexion ; peut-être : { $reason }
the-broker-does-not-let-us-read-topics-see-its-access-rules =
    le courtier ne laisse pas lire { $topics } ; voir ses règles d’accès
the-connection-to-the-broker-ended-with-an-error-of-the-program-see-the-log =
    la connexion au courtier a pris fin sur une erreur du programme ; voir le journal technique

## Fichiers des enregistreurs

line-line-text =
    { "  " }ligne { $line } : { $text }
line-line-text-shape =
    { "  " }ligne { $line } : { $text } ({ $shape })
the-dates-can-be-read-as-day-month-or-as-month-day-say-which-with-date-order-dmy-or-date-order-mdy-examples =
    les dates peuvent se lire jour/mois ou mois/jour ; dire lequel avec --date-order dmy ou --date-order mdy :
    { $examples }
the-column-column-should-read-heading-quantity-heading-probe-quantity-or-heading-quantity-unit-quantities-quantities =
    la colonne « { $column } » doit s’écrire EN-TÊTE=grandeur, EN-TÊTE=sonde/grandeur ou EN-TÊTE=grandeur:unité ; grandeurs : { $quantities }
the-probe-probe-may-hold-letters-digits-only =
    la sonde « { $probe } » : lettres, chiffres, - _ . seulement
the-time-time-is-not-in-a-form-that-is-known =
    l’heure { $time } n’est pas d’une forme connue
year-first =
    l’année d’abord
day-or-month-first-with-mark =
    le jour ou le mois d’abord, avec { $mark }
shape-and-its-own-offset =
    { $shape }, avec son propre décalage
seconds-since-1970 =
    secondes depuis 1970
the-time-column-holds-count-different-forms-split-the-file-or-mend-these-rows-examples =
    la colonne de l’heure a { $count } formes différentes ; partager le fichier, ou corriger ces lignes :
    { $examples }
the-time-column-has-the-day-first-in-one-row-and-the-month-first-in-another-examples =
    la colonne de l’heure a le jour d’abord dans une ligne et le mois d’abord dans une autre :
    { $examples }
the-column-column-error =
    la colonne « { $column } » : { $error }
the-columns-first-and-second-would-both-be-quantity-name-them-column-second-probe2-quantity =
    les colonnes « { $first } » et « { $second } » seraient toutes deux { $quantity } ; les nommer : --column "{ $second }=probe2/{ $quantity }"
the-time-time-does-not-exist-error =
    l’heure { $time } n’existe pas : { $error }
the-time-zone-name-is-not-known-write-it-like-africa-gaborone-or-as-an-offset-like-02-00 =
    le fuseau horaire « { $name } » n’est pas connu ; l’écrire comme Africa/Gaborone, ou comme un décalage tel que +02:00
the-date-date-does-not-exist =
    la date { $date } n’existe pas
the-local-time-time-does-not-exist-clocks-went-forward-over-it =
    l’heure locale { $time } n’existe pas : les horloges l’ont sautée
commas =
    des virgules
semicolons =
    des points-virgules
tabs =
    des tabulations
bars =
    des barres
path-no-heading-with-a-time-column-and-at-least-one-known-quantity-in-the-first-count-lines-name-the-columns-yourself-time-column-column-the-file-begins-start =
    { $path } : pas d’en-tête avec une colonne de l’heure et au moins une grandeur connue dans les { $count } premières lignes ; nommer les colonnes (--time-column, --column). Le fichier commence ainsi :
    { $start }
path-the-file-is-empty =
    { $path } : le fichier est vide
path-this-is-not-a-text-file-export-it-from-the-logger-s-program-as-csv =
    { $path } : ce n’est pas un fichier de texte ; l’exporter en CSV depuis le programme de l’enregistreur
the-node-node-may-hold-letters-digits-only-40-at-most =
    la carte « { $node } » : lettres, chiffres, - _ . seulement, 40 au plus
path-no-row-could-be-taken-examples =
    { $path } : aucune ligne n’a pu être prise :
    { $examples }
the-speed-is-speed-allowed-1-or-more =
    la vitesse est { $speed } ; permis : 1 ou plus
path-spans-days-days-a-replay-can-span-most-days =
    { $path } : couvre { $days } jours ; une relecture peut en couvrir { $most }
holds-no-number-in-the-columns-that-are-read =
    pas de nombre dans les colonnes lues
read-as-encoding-columns-split-at-delimiter =
    lu en { $encoding }, colonnes séparées par { $delimiter }
path-size-bytes-allowed-most-split-it-into-smaller-files =
    { $path } : { $size } octets ; permis : { $most }. Le partager en fichiers plus petits
path-cannot-be-read-error =
    { $path } : illisible : { $error }
path-not-readable-as-encoding-try-encoding-with-one-of-encodings =
    { $path } : illisible en { $encoding } ; essayer --encoding avec l’un de { $encodings }
path-line-line-cannot-be-split-into-columns-error =
    { $path } : la ligne { $line } ne se partage pas en colonnes : { $error }
the-column-column-writes-decimals-as-and-as-examples =
    la colonne « { $column } » écrit les décimales avec , et avec . :
    { $examples }
the-column-column-writes-decimals-as-sign-decimal-says-wanted-examples =
    la colonne « { $column } » écrit les décimales avec { $sign } ; --decimal dit { $wanted } :
    { $examples }
same-time-as-line-line-same-values =
    même heure que la ligne { $line }, mêmes valeurs
same-time-as-line-line-other-values-the-first-were-kept =
    même heure que la ligne { $line }, autres valeurs ; les premières restent
count-cells-held-no-number =
    { $count } cellules sans nombre
count-rows-lie-in-an-hour-that-occurs-twice-clocks-went-back-taken-in-turn =
    { $count } lignes sont dans une heure qui a lieu deux fois (horloges reculées) ; prises dans l’ordre
column-sensor-in-unit =
    { $column } -> { $sensor } en { $unit }

## Page et service

the-page-may-not-listen-on-address-without-a-password-everybody-in-that-network-could-use-it-give-page-password-env-or-password-file-in-the-settings-or-listen-127-0-0-1 =
    la page ne peut pas écouter sur { $address } sans mot de passe : tout le monde sur ce réseau pourrait s’en servir. Donner [page] password_env ou password_file dans les réglages, ou listen = "127.0.0.1".
the-page-cannot-listen-on-address-port-port-error-another-program-may-use-it-give-another-page-port-in-the-settings =
    la page ne peut pas écouter sur { $address }, port { $port } : { $error }. Un autre programme s’en sert peut-être ; donner un autre [page] port dans les réglages.
the-page-did-not-start-at-address-the-log-says-why =
    la page n’a pas démarré à { $address } ; le journal technique dit pourquoi

## Base de données et archive

archive-needs-one-more-package-to-mend-pip-install-rearing-monitor-archive =
    { "[" }archive] demande un paquet de plus. Remède : pip install 'rearing-monitor[archive]'.
path-this-disk-cannot-hold-the-database-safely-journal-mode-mode-to-mend-use-a-disk-of-this-computer-not-a-network-folder =
    { $path } : ce disque ne peut pas garder la base en sûreté (mode de journal { $mode }). Remède : prendre un disque de cet ordinateur, pas un dossier du réseau.
path-this-is-a-folder-not-a-file-to-mend-give-a-file-name-in-store-path =
    { $path } : c’est un dossier, pas un fichier. Remède : donner un nom de fichier dans [store] path.
path-the-folder-folder-does-not-exist-to-mend-create-it-or-change-store-path =
    { $path } : le dossier { $folder } n’existe pas. Remède : le créer ou changer [store] path.
path-there-is-no-database-here-to-mend-start-the-service-once-or-check-store-path =
    { $path } : il n’y a pas de base de données ici. Remède : démarrer le service une fois, ou vérifier [store] path.
path-opened-for-reading-only-nothing-was-written =
    { $path } : ouvert en lecture seule ; rien n’est écrit
path-this-database-belongs-to-another-program-nothing-was-changed-to-mend-give-another-file-in-store-path =
    { $path } : cette base de données est à un autre programme ; rien n’est changé. Remède : donner un autre fichier dans [store] path.
path-written-by-an-older-version-of-this-program-to-mend-start-the-service-once-it-brings-the-file-up-to-date =
    { $path } : écrit par une version plus ancienne de ce programme. Remède : démarrer le service une fois, il met le fichier à jour.
path-written-by-a-newer-version-of-this-program-schema-found-this-one-knows-known-to-mend-install-the-newer-version-again-or-use-a-backup-from-before-it =
    { $path } : écrit par une version plus récente de ce programme (schéma { $found } ; celui-ci connaît { $known }). Remède : réinstaller la version plus récente, ou prendre une copie d’avant.
check-in-the-broker-s-access-rules-that-topics-may-be-read-and-written-user-and-in-farm-toml-the-site-id-site-and-topic-root-root =
    Vérifier dans les règles d’accès du courtier que { $topics } peut être lu et écrit { $user }, et dans farm.toml l’id du site ("{ $site }") et topic_root ("{ $root }")
for-everybody-since-no-username-is-set =
    par tous, puisqu’aucun username n’est donné
for-the-user-name =
    par l’utilisateur "{ $name }"
correct-broker-username-and-its-password-password-file-or-password-env =
    corriger [broker] username et son mot de passe (password_file ou password_env)
its-message-to-itself-is-still-under-way-ask-again-in-half-a-minute =
    son message à lui-même est encore en route ; redemander dans une demi-minute
let-in-without-a-user-name =
    admis sans nom d’utilisateur
logged-in-as-name =
    identifié comme "{ $name }"
no-answer-from-where-why-to-mend-see-whether-that-computer-is-on-in-the-same-network-and-whether-a-firewall-stands-between =
    pas de réponse de { $where } ({ $why }). Pour corriger : voir si cet ordinateur est allumé, dans le même réseau, et si un pare-feu s’interpose
nothing-listens-at-where-to-mend-start-the-broker-mosquitto-systemctl-start-mosquitto-or-correct-broker-host-and-port-mosquitto-without-a-listener-line-answers-its-own-computer-only =
    rien n’écoute à { $where }. Pour corriger : démarrer le courtier (mosquitto : systemctl start mosquitto), ou corriger host et port dans [broker] ; mosquitto sans ligne listener ne répond qu’à son propre ordinateur
problem-to-mend-remedy-a-user-of-mosquitto-is-added-with-mosquitto-passwd =
    { $problem }. Pour corriger : { $remedy } ; mosquitto_passwd ajoute un utilisateur à mosquitto
something-answers-at-where =
    quelque chose répond à { $where }
subscribed-to-topics =
    abonné à { $topics }
the-broker-passes-on-what-boards-send =
    le courtier transmet ce que les cartes envoient
the-broker-wants-a-user-name-add-username-and-password-file-to-broker =
    le courtier veut un nom d’utilisateur : ajouter username et password_file à [broker]
the-connection-is-encrypted-and-the-broker-s-certificate-is-trusted =
    la connexion est chiffrée, et le certificat du courtier est reconnu
the-monitor-runs-and-is-connected-logged-in-and-subscribed =
    le moniteur tourne, il est connecté, identifié et abonné
the-name-host-stands-for-address =
    le nom { $host } désigne { $address }
there-is-no-computer-named-host-to-mend-correct-broker-host-a-broker-on-this-computer-is-127-0-0-1 =
    aucun ordinateur ne s’appelle "{ $host }". Pour corriger : rectifier [broker] host ; un courtier sur cet ordinateur est "127.0.0.1"
give-the-command-as-the-user-that-runs-the-monitor-such-as-sudo-u-rearing-rearing-monitor-now-or-let-your-own-read-and-write-this-file-and-its-folder =
    lancer la commande comme l’utilisateur qui fait tourner le moniteur (par exemple : sudo -u rearing rearing-monitor now), ou laisser le vôtre lire et écrire ce fichier et son dossier

## Archive

the-archive-server-does-not-know-the-token-give-a-valid-one-in-archive-token =
    le serveur d’archive ne connaît pas le jeton ; en donner un valable dans [archive] token
the-token-may-not-write-into-this-bucket-give-one-that-may-in-archive-token =
    le jeton ne peut pas écrire dans ce bucket ; en donner un qui le peut dans [archive] token
the-archive-server-does-not-know-this-address-organisation-or-bucket-look-at-archive-and-create-the-bucket =
    le serveur d’archive ne connaît pas cette adresse, cette organisation ou ce bucket ; voir [archive] et créer le bucket
problem-reason =
    { $problem } ({ $reason })
the-archive-server-is-busy-or-in-trouble-status-reason-it-is-asked-again-later =
    le serveur d’archive est occupé ou en panne ({ $status } : { $reason }) ; il sera interrogé plus tard
the-archive-server-does-not-answer-reason =
    le serveur d’archive ne répond pas ({ $reason })
a-proxy-between-here-and-the-archive-server-asks-for-a-log-in =
    un serveur mandataire entre ici et le serveur d’archive demande une connexion
the-archive-server-or-something-before-it-does-not-take-this-request-look-at-archive-url-and-at-what-stands-between =
    le serveur d’archive, ou quelque chose devant lui, ne prend pas cette demande ; voir [archive] url et ce qui se trouve entre les deux
what-answers-at-archive-url-shows-a-web-page-and-is-no-archive-server-a-log-in-to-the-network-perhaps =
    ce qui répond à [archive] url montre une page web et n’est pas un serveur d’archive (peut-être la connexion au réseau)
the-token-of-archive-holds-what-no-token-can-hold-a-line-break-or-a-letter-with-an-accent-to-mend-copy-it-again-from-the-archive-server =
    le jeton de [archive] contient ce qu’aucun jeton ne peut contenir : un saut de ligne, ou une lettre accentuée. Pour corriger : le copier à nouveau depuis le serveur d’archive.
the-archive-server-refuses-count-readings-and-takes-others-said-they-are-tried-again-each-hour =
    le serveur d’archive refuse { $count } mesures et en prend d’autres ({ $said }) ; elles sont réessayées chaque heure
the-archive-server-refuses-every-reading-said-look-at-archive-in-the-settings =
    le serveur d’archive refuse chaque mesure ({ $said }) ; voir [archive] dans les réglages
the-archive-stopped-and-is-begun-again-kind-error =
    l’archive s’est arrêtée et recommence ({ $kind } : { $error })

## Lire l’archive

url-does-not-answer-as-kind-does =
    { $url } ne répond pas comme { $kind }
url-does-not-let-this-token-read-status-reason-to-mend-give-one-that-may-in-archive-read-token =
    { $url } ne laisse pas lire avec ce jeton ({ $status } : { $reason }). Remède : en donner un qui le peut dans [archive] read_token
url-gave-an-answer-that-makes-no-sense-reason-to-mend-look-at-the-address-in-archive-read-url-and-at-what-stands-between-this-computer-and-the-server =
    { $url } a donné une réponse qui n’a pas de sens ({ $reason }). Remède : voir l’adresse dans [archive] read_url, et ce qui se trouve entre cet ordinateur et le serveur
url-refuses-the-question-status-reason-to-mend-give-the-address-of-its-queries-in-archive-read-url =
    { $url } refuse la question ({ $status } : { $reason }). Remède : donner l’adresse de ses requêtes dans [archive] read_url
url-understands-neither-of-the-two-ways-of-reading-an-archive-as-victoriametrics-victoria-as-influxdb-2-influx-to-mend-give-the-address-of-its-queries-in-archive-read-url-and-what-it-is-in-archive-kind =
    { $url } ne comprend aucune des deux façons de lire une archive (comme VictoriaMetrics : { $victoria } ; comme InfluxDB 2 : { $influx }). Remède : donner l’adresse de ses requêtes dans [archive] read_url, et ce qu’il est dans [archive] kind

## Revenir d’une copie

path-is-no-copy-of-a-site-it-holds-no-file-to-mend-name-the-folder-of-a-copy-such-as-example =
    { $path } n’est pas la copie d’un site : il n’y a pas de { $file }. Remède : nommer le dossier d’une copie, comme { $example }.
path-was-written-by-a-later-version-of-this-program-version-to-mend-install-that-version =
    { $path } a été écrit par une version plus récente de ce programme ({ $version }). Remède : installer cette version.
the-folder-folder-does-not-exist-if-it-is-on-a-stick-or-disk-see-whether-that-is-plugged-in-and-mounted =
    le dossier { $folder } n’existe pas. S’il est sur une clé ou un disque, voir si celui-ci est branché et monté.
the-passphrase-does-not-open-path-or-the-file-is-damaged-nothing-was-changed-to-mend-give-the-passphrase-that-was-in-force-on-the-day-of-this-copy-or-go-on-without-its-secrets =
    la phrase secrète n’ouvre pas { $path }, ou le fichier est abîmé. Rien n’a été changé. Remède : donner la phrase qui valait le jour de cette copie, ou continuer sans ses secrets.
the-settings-name-no-archive-to-mend-fill-in-archive-as-the-settings-that-init-writes-show-it =
    les réglages ne nomment aucune archive. Remède : remplir [archive], comme le montrent les réglages qu’écrit `init`
